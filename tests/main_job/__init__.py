"""The main job from one end to the other, by HTTP and commands alone (python -m tests.main_job)."""
