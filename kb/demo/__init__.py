"""An invented shop for the demo: its hidden habits, its complaints and its closed jobs."""
