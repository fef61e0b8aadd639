"""What labels, states and weather allow: holds, duties, thresholds, and checks of the labels."""
