"""How the service compares with the bare limit and with other ways to build it. Run by hand, on Linux.

From the top of a checkout, with the extra ``benchmark`` installed and the machine otherwise idle:

    PYTHONPATH=tests python -m benchmarks

It makes catalogues of 10,000 and 200,000 vehicles by the real import and publication (the larger takes some
minutes; both are kept for the next run), starts the service and its peers beside each other, and prints a
table, which it also writes as Markdown. ``--help`` tells the options.

Cost is CPU time per request of all of a server's processes, as the kernel accounts it: steadier than requests
per second. Rounds alternate between what is compared, and medians count. Compare within one run; absolute
figures say as much about the machine.
"""
