"""Lets ``python -m forecast`` stand for the ``forecast`` command."""

from forecast.cli import main

main()
