"""What should happen: the checklist, the plan, and how one unfolds for the other."""
