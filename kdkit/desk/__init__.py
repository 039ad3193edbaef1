"""Row 14: the desk, pages for those who answer callers, over an archive of issued revisions.

Promises: nothing that is issued can be changed from here; the only things written are notes
of what was sent, and references taken out of them. Pages need no script and no network, and
work by keyboard alone. Without accounts it answers this machine alone. Files come out of the
archive by their sum, so that no path leads anywhere.

The pages are made here on each request; a sheet that shows how a panel is changed is drawn by
a run of kdkit of its own, so that the desk goes on answering. The library for the web and the
server are used here and nowhere else.
"""
