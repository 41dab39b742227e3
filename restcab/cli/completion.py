"""``restcab completion``: the lines that teach a shell to complete."""

import click

_VARIABLE = "_RESTCAB_COMPLETE"
"""Set by the shell's script when it asks for words; click answers before any command runs."""


@click.command(
    epilog="Example:\n\n\b\n  restcab completion bash\n"
    "  restcab completion zsh\n  restcab completion fish",
)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"], case_sensitive=False))
def command(shell: str) -> None:
    """Print the lines that teach a shell to complete restcab.

    Commands, options, climates, keys of --set and the words they accept. For bash, put
    eval "$(restcab completion bash)" into ~/.bashrc; for zsh the same with zsh into ~/.zshrc; for
    fish, save the lines as ~/.config/fish/completions/restcab.fish.
    """
    from click.shell_completion import get_completion_class

    from restcab.cli.main import cli

    found = get_completion_class(shell.lower())
    assert found is not None
    made = found(cli, {}, "restcab", _VARIABLE)
    # click asks the installed bash for its version first; the lines are the same without it
    click.echo(made.source_template % made.source_vars())
