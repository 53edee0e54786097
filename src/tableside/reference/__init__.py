"""Published intervals: what is usual in an animal like this one, and who says so."""
