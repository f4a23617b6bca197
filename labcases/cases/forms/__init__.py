"""What is typed at the counter, read into the plain records that the verbs take."""
