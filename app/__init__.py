"""Evenseam. Imports point downwards only:

__main__
main | tick | demo | tables
casebook
outcomes
sessions
healing
pigments
intake
messages
consents
records
studio
platform | colour
"""
