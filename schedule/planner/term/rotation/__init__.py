"""Terms with rotating days: what stands on weekdays chosen exactly under a pattern of the rotating sessions."""
