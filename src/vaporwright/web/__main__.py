"""`python -m vaporwright.web`."""

from vaporwright.web.serve import main

if __name__ == "__main__":
    raise SystemExit(main())
