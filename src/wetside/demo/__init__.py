"""An invented book and scans with planted truth. The only place where invented data may live."""
