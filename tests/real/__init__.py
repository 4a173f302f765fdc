"""The main question on open data that registry packages carry."""
