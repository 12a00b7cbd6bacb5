"""One SQLite file per warmer, and the spool of requests beside it.

`store` writes (the daemon alone), `query` reads, `spool` carries a person's requests to the daemon,
`export` writes CSV and JSON lines. The schema is described in docs/record.md.
"""
