"""Moire in a camera's picture: mapped by prediction, and drawn by brute force for people to see."""
