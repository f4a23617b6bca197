"""How things get on paper: template in, tagged PDF out; frozen copies; labels."""
