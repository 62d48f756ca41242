"""Groups, the people and programs that act for them, and their keys."""
