"""Loading and routing as problems of numbers and ids, and the engines that solve them."""
