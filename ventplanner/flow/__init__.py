"""Flow: will it breathe on the printer? Suction at the lift and overpressure on the way down, room by room and layer by
layer, from a network of rooms, throats and vents."""
