"""Phones with a chat account, by the open standard XMPP."""
