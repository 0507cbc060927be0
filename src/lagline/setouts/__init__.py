"""Set-outs: what hands measure, mark and set for one kind of work; each asked for by a few fields, answered whole."""
