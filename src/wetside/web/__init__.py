"""The web face: local pages, an HTTP door and a WebSocket. Nobody imports it but the command line's `serve`."""
