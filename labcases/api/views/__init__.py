"""Pages for people (``pages``), the door for programs (``door``), and what is behind it (``endpoints``)."""
