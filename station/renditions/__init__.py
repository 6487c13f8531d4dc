"""A judged flight in forms to show and to keep: a page to share, captions, a picture, tables."""
