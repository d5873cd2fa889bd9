"""A second, independent world of plugs: other habits of shape, coat, ground, light and camera."""
