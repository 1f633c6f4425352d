"""A dataset of many people: walked, analysed on several processes or a cluster, put together as tables.

``dataset`` finds the recordings, ``plans`` what each is compared with, ``one_recording`` analyses one, ``pools`` and
``running`` do many at once, ``pieces`` keeps what is finished, ``tables`` puts it together, ``analysing`` ties it up.
"""
