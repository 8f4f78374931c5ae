"""Papers that leave the screen: written once as blocks, then set as HTML or as PDF."""
