"""How large an array carries this load through its life?"""
