"""The lab's own records: the log of its equipment, who may do which work, and work that went wrong."""
