"""Files of components: reading, checking, writing, and the files that come with the package.

==============  ==================================================================
``paths``       places inside a file
``files``       a file becomes text and a dictionary, or one clear refusal
``commas``      finding the decimal comma, which TOML reads as something else
``schema``      what may stand in a file of each kind (pydantic; imported when used)
``problems``    what the schema found becomes one ``InputError``, first in file order
``assemble``    one module a kind: the checked file becomes the component
``read``        the front door: ``read_converter`` and its neighbours
``check``       what is odd about data that can be read; the rules stand in ``odd``
``write``       a component becomes a file, exactly (``exact``, ``toml_text``, ``atomic``)
``shipped``     the files that come with the package
==============  ==================================================================
"""
