"""What is the matter with a part: its health, its cavities and its cups."""
