"""Beside the rows: what other programs hand over, as a start for a definition.

Promises: ``load_panel_list`` reads a table of panels, ``render_start`` makes a commented
definition of it in which whatever the table does not say is an open question;
``load_outline`` reads the shape of a panel from a drawing. Nothing is guessed in
silence, nothing in a file can run, and whatever is wrong comes back as problems with
their place.
"""

from __future__ import annotations
