"""Job sheets: what is to be printed, with which inks on which garments."""
