"""Known patches: strips, control of the process, calibration of a light, stocks and their cards."""
