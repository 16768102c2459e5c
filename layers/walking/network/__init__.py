"""The network of paths: from lines as drawn to nodes and edges that can be walked."""
