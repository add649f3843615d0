"""The example collection."""
