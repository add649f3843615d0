"""Work without a connection: for whom a device keeps pages, and how long they may stay there."""
