"""Screens and their frames: stages, steps, lives, and what each is judged by."""
