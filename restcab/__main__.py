"""``python -m restcab``: the same as the command ``restcab``."""

from restcab.cli.main import run

if __name__ == "__main__":
    run()
