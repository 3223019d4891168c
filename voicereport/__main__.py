"""python -m voicereport"""

from voicereport.cli import main

if __name__ == "__main__":
    main()
