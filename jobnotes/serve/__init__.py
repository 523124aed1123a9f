"""`jobnotes serve`: the local web application, for the phone under the cab and the clerk's desk."""
