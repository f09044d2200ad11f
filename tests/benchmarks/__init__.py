"""What is measured, as ratios of two things timed side by side in one run."""
