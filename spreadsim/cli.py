"""The command line: commands, and what their ends answer to the shell.

Each command is a module of its own: it parses, calls one public function and prints. Everything heavy is imported
where it is used, so that help and version answer at once.
"""

import sys
from collections.abc import Sequence

import click

import spreadsim
from spreadsim.cli_again import again
from spreadsim.cli_ask import ask
from spreadsim.cli_brief import brief
from spreadsim.cli_check import check
from spreadsim.cli_compare import compare
from spreadsim.cli_decide import decide
from spreadsim.cli_draw import draw
from spreadsim.cli_export import export
from spreadsim.cli_flips import flips
from spreadsim.cli_form import form
from spreadsim.cli_learn import learn
from spreadsim.cli_lesson import lesson
from spreadsim.cli_log import log
from spreadsim.cli_look import look
from spreadsim.cli_new import new
from spreadsim.cli_screen import complain
from spreadsim.cli_search import search
from spreadsim.cli_sensitivity import sensitivity
from spreadsim.cli_sweep import sweep
from spreadsim.cli_template import template
from spreadsim.cli_worklist import tally, worklist

DONE, FAILED, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(spreadsim.__version__, prog_name="spreadsim", message="%(prog)s %(version)s")
def cli() -> None:
    """Compare ways of managing a climbing, creeping vine on your own site.

    Write the site, the crews and the strategies into an experiment file, check it, then compare.
    """


cli.add_command(again)
cli.add_command(ask)
cli.add_command(brief)
cli.add_command(check)
cli.add_command(compare)
cli.add_command(new)
cli.add_command(decide)
cli.add_command(draw)
cli.add_command(export)
cli.add_command(flips)
cli.add_command(form)
cli.add_command(learn)
cli.add_command(lesson)
cli.add_command(log)
cli.add_command(look)
cli.add_command(search)
cli.add_command(sensitivity)
cli.add_command(sweep)
cli.add_command(template)
cli.add_command(tally)
cli.add_command(worklist)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments
        Without the name of the program; those of the process if not given.

    Returns
    -------
    int
        0 done, 1 the machine failed, 2 the input is bad, 130 interrupted.
    """
    from spreadsim.errors import InputError

    try:
        code = cli.main(args=arguments, prog_name="spreadsim", standalone_mode=False)
        return code if isinstance(code, int) else DONE
    except InputError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except (click.Abort, KeyboardInterrupt):
        complain("interrupted; what was finished is kept, --resume goes on from there")
        return INTERRUPTED
    except click.ClickException as error:
        error.show()
        return BAD_INPUT
    except (OSError, MemoryError) as error:
        what = " ".join(str(error).split()) or type(error).__name__
        complain(f"the machine failed: {what}; what was finished is kept, --resume goes on from there")
        return FAILED
