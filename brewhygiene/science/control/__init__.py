"""Control charts: where a series stood, when it moved, and how often that is said by luck."""
