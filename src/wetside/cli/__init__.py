"""The command line face. Heavy imports stay inside the functions that need them.

So do light ones at the head of its modules: that help comes at once, what only a type checker asks for stands under
`if TYPE_CHECKING:`, a name that is set here because `typing` itself takes a fifth of a bare interpreter's time to load.
"""
