"""Work without a connection: the device that keeps pages, and what it sends later."""
