"""Reports over a finished assessment. They compute nothing; they show."""
