"""What text, pictures and pages share: figures rounded and worded, plain words, drawing."""
