"""What `learn` leaves in a folder for others to go on from."""

START_FILE, LEARNED_FILE = "start.nc", "learned.nc"
