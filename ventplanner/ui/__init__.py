"""The window: it shows the application model of `ventplanner.app`, and turns what the user does into edits of it."""
