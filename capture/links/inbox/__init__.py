"""Commands of a person into a running capture, over the loopback address.

Entry points: `server.open_inbox` in the capture, `client.say` and `client.find` outside it. The address and a
token stand in a file beside the job that only the user can read, and once more in the user's runtime folder,
so that a client finds the one running capture from any folder. May import `capture.host`.
"""
