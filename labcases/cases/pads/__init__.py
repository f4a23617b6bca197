"""Paper intake pads: codes reserved beforehand, for when power or network is down; typed in later under the same."""
