"""The models behind the reference cases: one function a `run` name of `cases/reference`."""
