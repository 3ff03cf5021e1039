"""Work that takes long: threads of this process, and a worker process for what holds the interpreter lock."""
