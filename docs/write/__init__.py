"""Parts of the documentation that are written from the code and the configuration."""
