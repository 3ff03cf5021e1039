"""The harbour shop sample parts and the script that makes them."""
