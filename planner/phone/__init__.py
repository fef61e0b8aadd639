"""The page that an applicator works from: one self-contained page per truck."""
