"""A group of commands one of which needs no word of its own: what is no other command's name is its first word."""

from typing import Any

import click

__all__ = ["UsualGroup"]


class UsualGroup(click.Group):
    """Commands, one of which is the usual one."""

    usual: click.Command

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401  click has it so
    ) -> click.Context:
        """Give the words to the group where the first one is a command or asks for help, else to the usual command.

        Parameters
        ----------
        info_name : str or None
            Name of the group.
        args : list of str
            Words behind it.
        parent : click.Context, optional
            Of the program.
        **extra : object
            As click has them.

        Returns
        -------
        click.Context
            Of the group or the usual command.
        """
        if not args or args[0] in {*self.commands, "-h", "--help"}:
            return super().make_context(info_name, args, parent, **extra)
        return self.usual.make_context(info_name, args, parent, **extra)

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the usual command's help, and the names of the others.

        Parameters
        ----------
        ctx : click.Context
            Of the group.
        formatter : click.HelpFormatter
            Takes the text.
        """
        self.usual.format_help(ctx, formatter)
        self.format_commands(ctx, formatter)
