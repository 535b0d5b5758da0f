"""What the help of each page says, by the part of the job."""
