"""Made-up nights with known truth; start reading at `night.py`."""
