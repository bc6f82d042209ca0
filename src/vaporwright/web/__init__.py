"""The web application: pages and a JSON interface over the actions, thin."""
