"""What the server sends before the first picture: the page, its packaged files, and what a tablet installs.

Entry points: `document.page`, `installed.lay_installed`. May import views and text.
"""
