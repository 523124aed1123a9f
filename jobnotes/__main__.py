from jobnotes.commands import main

if __name__ == "__main__":
    main(prog_name="jobnotes")
