"""The parts of the main window. None knows another: each shows the session and asks it for edits."""
