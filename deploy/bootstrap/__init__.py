"""From a bare Python to a running register: environment, demo, tests, checks.

Standard library only, since it runs before anything is installed.
"""
