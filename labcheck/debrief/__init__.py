"""What it meant: the sheet that looks back."""
