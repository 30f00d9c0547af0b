"""Densities measured on the film: patches, areas, wedges and strips, calibrated, each with its spread."""
