"""Real counterparts for live sources: a broker, devices, files. Each is started by the test and ended with it."""
