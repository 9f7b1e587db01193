"""From a request that was read to the engine's own values: trade units to SI, nothing computed."""
