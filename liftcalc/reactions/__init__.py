"""Forces on the outriggers: carrier, contact with the ground, envelope over slew."""
