"""The acts of the shop floor: fetch, ask the rules, save. The only writer.

Every act takes the database first, writes inside `store.writing`, and raises Refused when it will not do.
"""
