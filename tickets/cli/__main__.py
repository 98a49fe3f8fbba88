"""`python -m tickets.cli`."""

from tickets.cli import main

main()
