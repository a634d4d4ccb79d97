"""The sheeters' side: who cuts which reels, in which loads, and when."""
